"""The language of a report, and whether it always puts the day before the month."""

import pytest

from pipeline.languages import language_of, puts_day_first

# Unicode CLDR, as carried by Babel 2.18: short date patterns of the languages. Of all territories,
# fr-CA puts the year first, es-PR and es-PA the month; no other of these five does.
CLDR_SHORT = {
    "French": "dd/MM/y",
    "Spanish": "d/M/yy",
    "Italian": "dd/MM/yy",
    "German": "dd.MM.yy",
    "Portuguese": "dd/MM/y",
    "English": "M/d/yy",
}


@pytest.mark.parametrize("language", CLDR_SHORT)
def test_the_day_comes_first_where_the_locale_data_say_so(language: str) -> None:
    assert puts_day_first(language) == CLDR_SHORT[language].startswith("d")


@pytest.mark.parametrize(
    ("texts", "language"),
    [
        (["Échantillon", "Date de prélèvement"], "French"),
        (["Probenahme", "Prüfbericht Nr. 7", "S1"], "German"),
        (["Échantillon", "S1"], None),  # one word is not enough
        (["Échantillon", "Prélèvement", "Sample"], None),  # two languages
        (["Muestra", "Fecha", "Amostra"], None),
        (["S1", "12.5"], None),
    ],
)
def test_a_language_is_named_by_words_of_its_own_alone(
    texts: list[str], language: str | None
) -> None:
    assert language_of(texts) == language
