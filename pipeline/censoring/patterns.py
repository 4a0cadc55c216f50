"""Patterns by which a printed result is taken apart."""

from __future__ import annotations

import re

ERROR = re.compile(r"#(?:N/A|DIV/0!|VALUE!|REF!|NAME\?|NUM!|NULL!)", re.I)
NUMBER = r"[-+]?(?:\d[\d.,'’ \u00a0\u2009\u202f]*\d|\d)(?:[eE][-+]?\d{1,3})?|[-+]?[.,]\d+"
LESS_WORDS = (
    r"less than|below|under|inférieure? à|inf\.? [àa]|kleiner(?: als)?|weniger als"
    r"|menor (?:que|a|do que)|inferior (?:a|al|ao)|inferiore a|minore di"
)
MORE_WORDS = (
    r"greater than|more than|above|over|supérieure? à|größer als"
    r"|superior (?:a|al|ao)|superiore a|mayor (?:que|a)|maggiore di"
)
LESS = re.compile(rf"^(?:<\s*=?|≤|⩽|≦|{LESS_WORDS})\s*({NUMBER})(.*)$", re.I)
MORE = re.compile(rf"^(?:>\s*=?|≥|⩾|≧|{MORE_WORDS})\s*({NUMBER})(.*)$", re.I)
PLAIN = re.compile(rf"^({NUMBER})(.*)$")
SPREAD = re.compile(rf"^\s*(?:±|\+/-|\+-|\+/−)\s*({NUMBER})(.*)$")
BRACKETED_SPREAD = re.compile(r"^\(\s*((?:±|\+/-|\+-)[^()]*)\)(.*)$")
IN_BRACKETS = re.compile(
    rf"[(\[]?\s*(LOD|LOQ|DL|MDL|RL|LOR|LD|LQ|LC|NWG|BG|<|≤)?\s*[:=<≤]?\s*({NUMBER})\s*[)\]]?$",
    re.I,
)
RANGE = re.compile(r"^\d+(?:[.,]\d+)?\s*(?:-|–|—|to|\.\.)\s*\d+(?:[.,]\d+)?$")
RAISED = re.compile(r"[\u00b9\u00b2\u00b3\u2070-\u207f\u1d2c-\u1d6a\u02b0-\u02b8ª]+$")
# "1.2 x 10^2" with its mark of a power: without one, the last digit may be a raised footnote.
TIMES_TEN = re.compile(
    r"(?<![\d.,])(\d+(?:[.,]\d+)?)\s*[x×*·]\s*10\s*\^\s*\(?([-+]?\d{1,2})\)?(?![\d.,])"
)
# "1.2 x 10²": behind "x 10" one raised figure is the power; two may be a power and a footnote.
RAISED_POWER = re.compile(
    r"(?<![\d.,])(\d+(?:[.,]\d+)?\s*[x×*·]\s*10)([⁺⁻]?[⁰¹²³⁴-⁹])(?![⁰¹²³⁴-⁹ᵃ-ᶻ])"
)
LEVEL = str.maketrans("⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "+-0123456789")
POWER = re.compile(r"(?:.*[x×*·]\s*)?10\s*[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+")
FOOTNOTE = re.compile(
    r"^(?:\*+|†+|‡+|§+|#+|\([a-z0-9*]{1,2}\)|\[[a-z0-9*]{1,2}\]|\^[a-z0-9]+)$", re.I
)
SIGNIFICANCE = re.compile(r"^[a-f](?:,?\s*[a-f]){0,3}$")
FLAG = re.compile(r"^\(?(?:[BCDHNPQSVXYZ]|NJ|BJ|DJ|J\+|J-)\)?$")
REMARK = re.compile(
    r"^\(?(?:re-?run|re-?analy[sz]ed|repeat(?:ed)?|re-?checked|confirmed|verified|r[ée]analys[ée]"
    r"|repetido|ripetuto|wiederholt|repetição)\)?$",
    re.I,
)
K_FACTOR = re.compile(r"[(,]?\s*k\s*=\s*\d(?:[.,]\d+)?\s*\)?")
MARKED = re.compile(r"\s*[*†‡§#]+$")
DECIMAL = (
    r"(?:^|[^\d.,])(?:\d+{0}\d{{1,2}}|\d+{0}\d{{4,}}|0{0}\d+|\d{{4,}}{0}\d+|{0}\d+"
    r"|\d{{1,3}}(?:{1}\d{{3}})+{0}\d+|\d{{1,3}}(?:{1}\d{{3}}){{2,}})(?![\d.,])"
)
DECIMALS = {m: re.compile(DECIMAL.format(*map(re.escape, m + o))) for m, o in (".,", ",.")}
# What a limit in brackets is called.
BRACKET_KINDS = {
    **dict.fromkeys(("lod", "dl", "mdl", "ld", "nwg"), "lod"),
    **dict.fromkeys(("loq", "lq", "lc", "bg"), "loq"),
}
