"""Read sentences that say which report an amended one replaces.

ISO/IEC 17025:2017, 7.8.8: an amended report is uniquely identified and refers to the original that
it replaces; its wording is "Amendment to Report, serial number ..." or an equivalent form.
"""

from __future__ import annotations

import re

_REPORT = (
    r"(?:(?:test|analysis|analytical|laboratory)\s+)?(?:report|certificate(?:\s+of\s+analysis)?)"
    r"|rapport(?:\s+d['’](?:essais?|analyses?))?|certificat(?:\s+d['’]analyses?)?"
    r"|(?:prüf|untersuchungs|analysen|labor)?bericht|informe(?:\s+de\s+(?:ensayos?|análisis))?"
    r"|rapporto(?:\s+di\s+(?:prova|analisi))?|relatório(?:\s+de\s+(?:ensaios?|análises?))?"
    r"|certificado(?:\s+de\s+an[áa]lises?|\s+de\s+análisis)?|certificato(?:\s+di\s+analisi)?"
    r"|bulletin(?:\s+d['’]analyses?)?|boletim(?:\s+de\s+an[áa]lises?)?"
    r"|bolet[íi]n(?:\s+de\s+an[áa]lisis)?|bollettino(?:\s+di\s+analisi)?|(?:analysen)?zertifikat"
)
_AMENDED = (
    r"(?:\s+(?:modifié|amendé|corrigé|rectifi\w+|révisé|modificado|corregido|enmendado|revisado"
    r"|modificato|corretto|emendato|revisionato|alterado|corrigido|retificado|emendado))?"
)
# A letter that begins the number itself, as in "NC-77", is no sign.
_SIGN = (
    r"(?:[\s,:]+(?:(?:serial\s+)?(?:number|no|nr|num|n)(?:[.°º]+|(?=\s))|n[°º]"
    r"|número|numéro|numero|nummer|#)\s*)?"
)
_NUMBER = (
    r"(?P<{0}>(?!\d{{4}}-\d\d-\d\d\b|\d{{1,2}}[./]\d{{1,2}}[./]\d{{2}})"
    r"(?-i:[A-Z]{{1,5}}\s)?[^\s,;:()]*\d[^\s,;:()]*)"
)
_REVISION = (
    r"(?:[\s,(\u2013-]+(?:rev(?:ision|isión|isione|isão)?|rév(?:ision)?|version|versión|versione|versão"
    r"|issue|amendment|fassung|ausgabe|édition|edición|edizione|edição)\b\.?\s*"
    r"(?:(?:no|nr|n)[.°º]*\s*)?(?P<{0}>\d+(?:\.\d+)?|[A-Z])\b\)?)?"
)
_VERB = (
    r"(?:(?:cancels|supersedes)\s+and\s+)?(?:replaces|supersedes|amends)|replacing|superseding"
    r"|(?:annule\s+et\s+)?remplace|(?:anula\s+y\s+)?(?:sustituye|reemplaza)(?:\s+y\s+anula)?"
    r"|(?:annulla\s+e\s+)?sostituisce(?:\s+e\s+annulla)?|ersetzt"
    r"|(?:anula\s+e\s+)?substitui(?:\s+e\s+anula)?"
)
_ARTICLE = (
    r"(?:\s+(?:the|le|la|al|el|il|o|a|den|das|die|lo|l['’]))?(?:\s+(?:previous|original|earlier))?"
)


def _identified(name: str) -> str:
    """A report's number and its revision, in groups of this name."""
    return _NUMBER.format(f"{name}_no") + _REVISION.format(f"{name}_revision")


_OWN = re.compile(
    rf"(?:^|[\s(])(?:{_REPORT}){_AMENDED}{_SIGN}\s+{_identified('own')}", re.IGNORECASE
)
_REPLACED = re.compile(
    rf"\b(?:{_VERB}){_ARTICLE}(?P<named>\s+(?:{_REPORT}){_AMENDED})?{_SIGN}\s*{_identified('old')}",
    re.IGNORECASE,
)
_NUMBERED = re.compile(
    r"(?:amendment|revision|änderung|nachtrag|modification|révision|revisión|modificación|revisione"
    r"|modifica|revisão|alteração|rev\.)(?:\s+(?:no\.?|nr\.?|n°)?\s*(?P<revision>\d+|[A-Z]))?"
    rf"\s+(?:to|of|zum|zu|des|du|au|de|del|al|do|ao)(?:\s+(?:the|le))?\s+(?:{_REPORT}){_SIGN}\s*"
    rf"{_NUMBER.format('no')}",
    re.IGNORECASE,
)
_AMENDED_FIRST = re.compile(
    r"\s*(?:amended|revised|corrected|reissued|geänderter|korrigierter|berichtigter)\s+"
    rf"(?:{_REPORT}){_SIGN}\s+{_identified('own')}",
    re.IGNORECASE,
)
_CALLED_AMENDED = re.compile(
    r"\s*(?:amended|revised|corrected|re-?issued|geänderter|korrigierter|berichtigter)\s+"
    rf"(?:{_REPORT})\b",
    re.IGNORECASE,
)
_LONGEST = 300


def amendment_in(text: str) -> dict[str, str]:
    """Read report_no, revision and replaces from one sentence; empty where it says nothing so.

    "Amended report R-7 rev. 2 replaces report R-7 rev. 1 of 2026-01-05": R-7, 2, R-7.
    """
    if len(text) > _LONGEST or not re.search(r"\d", text):
        return {}
    if match := _REPLACED.search(text):
        own = _OWN.search(text[: match.start()])
        if own is None and match["named"] is None and not _CALLED_AMENDED.match(text):
            return {}
        told = {"replaces": match["old_no"]}
        if own:
            told |= {"report_no": own["own_no"], "revision": own["own_revision"]}
        return _trimmed(told)
    if match := _NUMBERED.search(text):
        same = {"report_no": match["no"], "revision": match["revision"]}
        return _trimmed(same if match["revision"] else {"replaces": match["no"]})
    if (match := _AMENDED_FIRST.match(text)) and match["own_revision"]:
        return _trimmed({"report_no": match["own_no"], "revision": match["own_revision"]})
    return {}


def _trimmed(told: dict[str, str]) -> dict[str, str]:
    return {name: value.rstrip(".'\"") for name, value in told.items() if value}
