"""Say what each sample truly holds, and what a laboratory measures of it.

Units: µg/L of the free or released phenol, µg/L of the glycoside itself, µg/kg in grapes,
absorbance in 1 cm, total phenolics in mg/L. No chance is used: the small scatter of a
measurement is a checksum of sample, analyte and form, so every machine draws the same season.
"""

from zlib import crc32

from drawing.facts import Facts, Sample

SCATTER = 0.025  # largest relative scatter of a measurement


def measured(facts: Facts, lab: Facts, sample: Sample, analyte: str, form: str) -> float:
    """Return what the laboratory measures before it rounds and prints.

    `form` is free, total, glycosides or colour. A value fixed by hand is taken as it is.
    """
    fixed = fixed_value(facts, sample, analyte, form)
    if fixed is not None:
        return fixed
    if form == "colour":
        return colour(facts, sample, analyte)
    wobble = 1 + SCATTER * scatter(f"{sample.reference}|{analyte}|{form}")
    return truth(facts, sample, analyte, form) * float(lab["bias"]) * wobble


def truth(facts: Facts, sample: Sample, analyte: str, form: str) -> float:
    """Return the true content; total is free and released together."""
    if analyte == "m+p-cresol":
        isomers = ("m-cresol", "p-cresol")
        return sum(truth(facts, sample, isomer, form) for isomer in isomers)
    if form == "total":
        free = truth(facts, sample, analyte, "free")
        return free + content(facts, sample, analyte, "released")
    return content(facts, sample, analyte, form)


def content(facts: Facts, sample: Sample, analyte: str, pool: str) -> float:
    """Return one pool: variety's background and smoke, along the course of the lot."""
    smoke = sample.lot.smoke * float(facts["smoke"][pool].get(analyte, 0.0))
    base = float(background(facts, sample)[pool].get(analyte, 0.0))
    return (smoke + base) * course(facts, sample, pool)


def background(facts: Facts, sample: Sample) -> Facts:
    """Return the background of the variety, else of the colour of its grapes."""
    grapes = "white" if sample.lot.colour == "white" else "red"
    found: Facts = facts["background"].get(sample.lot.variety, facts["background"][grapes])
    return found


def course(facts: Facts, sample: Sample, pool: str) -> float:
    """Return the factor of stage, lot and bench treatment on free or bound."""
    column = 0 if pool == "free" else 1
    common = facts["course"][sample.lot.colour][sample.stage][column]
    own = facts["own_course"].get(sample.lot.name, {}).get(sample.stage, [1.0, 1.0])[column]
    bench = sample.free_factor if pool == "free" else 1.0
    return float(common) * float(own) * bench


def colour(facts: Facts, sample: Sample, measure: str) -> float:
    """Return an absorbance in 1 cm, or total phenolics in mg/L."""
    column = ("A420", "A520", "A620", "total phenolics").index(measure)
    base = float(facts["colour"][sample.lot.variety][column])
    aged = float(facts["colour_course"][sample.stage][column])
    after = sample.stage in ("ageing", "pre-bottling")
    fining = facts["fined_colour"].get(sample.lot.name) if after else None
    fined = float(fining[column]) if fining else 1.0
    own = 1 + 3 * SCATTER * scatter(f"{sample.lot.name}|colour")
    return base * aged * fined * own * sample.colour_factor


def fixed_value(facts: Facts, sample: Sample, analyte: str, form: str) -> float | None:
    """Return a truth set by hand, or None."""
    key = (sample.lot.name, sample.stage, analyte, form)
    for entry in facts["fixed"]:
        if (entry["lot"], entry["stage"], entry["analyte"], entry["form"]) == key:
            return float(entry["value"])
    return None


def scatter(key: str) -> float:
    """Spread a key evenly over [-1, 1]."""
    return (crc32(key.encode("utf-8")) % 2001 - 1000) / 1000
