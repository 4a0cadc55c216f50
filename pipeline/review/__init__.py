"""The review workbook: what was held goes out, decisions and corrections come back."""
