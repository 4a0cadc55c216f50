"""Errors whose text is a sentence for the person at the keyboard."""


class CinderlotError(Exception):
    """Say in one sentence what went wrong and what to do next."""


class FileRefused(CinderlotError):
    """Say why one file was not read; the other files go on."""

    def __init__(self, file: str, message: str) -> None:
        super().__init__(file, message)
        self.file = file
        self.message = message

    def __str__(self) -> str:
        return f"{self.file}: {self.message}"


class StoreBusy(CinderlotError):
    """Say that another process is writing to the store."""


class Stopped(CinderlotError):
    """Say that work was broken off between two reports, as asked."""


class WrongUse(CinderlotError):
    """Say which argument does not fit."""


class BadSettings(CinderlotError):
    """Say which setting is wrong and what would be right."""
