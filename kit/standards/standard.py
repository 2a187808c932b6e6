"""A standard: its clauses, each with its words, whose reading of them, and the limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from kit.protocol.catalogue import did_you_mean
from kit.quantities.errors import DataFileError, KitError
from kit.quantities.kinds import Kind
from kit.quantities.registry import convert
from kit.quantities.toml_table import Table, read_toml
from kit.standards.points import (
    MovementClause,
    PointClause,
    read_movement_clauses,
    read_point_clauses,
)
from kit.traits.declarations import trait

FOLDER = Path(__file__).parent / "published"
WORDING_CLASSES = ("exact", "about", "slightly", "at least", "at most", "range")
SEXES = ("both", "dog", "bitch")
EVIDENCE = ("read in the published text", "read in a copy", "from memory", "common practice",
            "measured")  # fmt: skip
KINDS = ("published", "common practice", "descriptive")
_STANDARD_KEYS = ("key", "title", "kind", "body", "document", "dated", "valid_from", "status",
                  "evidence", "source", "adult_from_months", "note")  # fmt: skip
_CLAUSE_KEYS = ("trait", "words", "class", "target", "low", "high", "unit", "reading", "sex",
                "section", "evidence", "definition", "note")  # fmt: skip

_WORDING_KEYS = {
    "exact": ("ratio", "length", "mass", "angle"),
    "about": ("ratio", "length", "mass", "angle"),
    "slightly": ("from", "to"),
}
# A clause is paraphrased in a few words; a pasted sentence is the standard's, not ours.
MOST_WORDS = 120
MOST_MONTHS = 48.0

Wording = Mapping[str, Mapping[str, float]]


@dataclass(frozen=True)
class Clause:
    """One requirement, in the unit of its trait's kind.

    Attributes
    ----------
    words : str
        What the standard asks, in a few words of the kit's own.
    wording : str
        One of WORDING_CLASSES.
    low, high : float or None
        Limits the finding is made against; None is open.
    reading : str
        Whose reading of the words the limits are: ``standard`` where it prints the numbers.
    sex : str
        ``both``, ``dog`` or ``bitch``.
    definition : str
        Which points the standard takes the trait on, or that it does not say.
    """

    number: int
    trait: str
    words: str
    wording: str
    target: float | None
    low: float | None
    high: float | None
    reading: str
    sex: str
    section: str
    evidence: str
    definition: str
    note: str


@dataclass(frozen=True)
class Standard:
    """A written standard and where it was read.

    Attributes
    ----------
    clauses : tuple of Clause
        What it asks of what is measured standing.
    points : tuple of PointClause
        What it says of points graded by eye.
    movement : tuple of MovementClause
        What it asks of figures of movement.
    """

    key: str
    title: str
    kind: str
    body: str
    document: str
    dated: str
    valid_from: str
    status: str
    evidence: str
    source: str
    adult_from_months: float
    note: str
    clauses: tuple[Clause, ...]
    points: tuple[PointClause, ...] = ()
    movement: tuple[MovementClause, ...] = ()


def load_standard(name: str | Path) -> Standard:
    """Load a shipped standard by its name, or any standard by its file.

    Raises
    ------
    DataFileError
        If there is no such standard, or its file has a fault (file, table and key are named).
    """
    text = str(name)
    shipped = FOLDER / f"{text}.toml"
    if shipped.is_file() and Path(text).name == text:
        return read_standard(shipped)
    if text.endswith(".toml"):
        return read_standard(Path(text))
    known = dict.fromkeys(shipped_standards())
    hint = did_you_mean(text, known) if text else ""
    raise DataFileError(
        f"no standard is called '{text}'",
        "a shipped standard (see: conformation standards list) or a .toml file",
        text,
        hint,
    )


def shipped_standards() -> tuple[str, ...]:
    """Return the names of the standards that ship with the kit."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))


def read_standard(path: Path) -> Standard:
    """Read and validate one standard file."""
    root = read_toml(path)
    root.only(("standard", "wording", "clause", "point", "movement"))
    head = root.table("standard")
    head.only(_STANDARD_KEYS)
    words = _merged(_wording(root))
    clauses = root.array("clause")
    if not clauses:
        raise DataFileError(f"{path.name} has no clause", "at least one [[clause]]")
    return Standard(
        key=head.text("key"),
        title=head.text("title"),
        kind=head.choice("kind", KINDS),
        body=head.text("body"),
        document=head.text("document"),
        dated=head.text("dated"),
        valid_from=head.text("valid_from"),
        status=head.text("status"),
        evidence=head.choice("evidence", EVIDENCE),
        source=head.text("source"),
        adult_from_months=_months(head),
        note=head.text("note", default=""),
        clauses=_clauses(clauses, words),
        points=read_point_clauses(root, EVIDENCE),
        movement=read_movement_clauses(root, EVIDENCE),
    )


@cache
def default_wording() -> Wording:
    """Return the kit's own reading of the words."""
    return _wording(read_toml(Path(__file__).parent / "wording.toml"))


def _wording(root: Table) -> dict[str, Mapping[str, float]]:
    """Return the readings of the words a file gives; what it leaves out stays the kit's."""
    tables = root.tables("wording")
    root.table("wording").only(_WORDING_KEYS)
    return {word: _word(table, _WORDING_KEYS[word]) for word, table in tables.items()}


def _word(table: Table, allowed: tuple[str, ...]) -> Mapping[str, float]:
    table.only(allowed)
    read = {key: table.number(key) for key in table.content}
    for key, value in read.items():
        if not value > 0 and key != "from":
            raise table.fault(key, "a number above zero", value)
    return read


def _merged(own: Wording) -> Wording:
    usual = default_wording()
    merged = {word: {**usual[word], **own.get(word, {})} for word in usual}
    reach = merged["slightly"]
    if not reach["from"] < reach["to"]:
        raise DataFileError("table [wording.slightly]", "from less than to", f"{dict(reach)}")
    return merged


def _months(head: Table) -> float:
    months = head.number("adult_from_months")
    if not 0.0 <= months <= MOST_MONTHS:
        raise head.fault("adult_from_months", f"months from 0 to {MOST_MONTHS:g}", months)
    return months


def _clauses(tables: tuple[Table, ...], words: Wording) -> tuple[Clause, ...]:
    """Read the clauses; one said twice is a slip of the pen."""
    read: list[Clause] = []
    for number, table in enumerate(tables, start=1):
        clause = _clause(number, table, words)
        for other in read:
            if (other.trait, other.sex, other.words) == (clause.trait, clause.sex, clause.words):
                raise table.fault("trait", "a clause that is not there yet", clause.trait)
        read.append(clause)
    return tuple(read)


def _few_words(table: Table) -> str:
    words = table.text("words")
    if len(words) > MOST_WORDS:
        needed = f"a few words of your own, at most {MOST_WORDS} characters"
        raise table.fault("words", needed, f"{words[:40]}… ({len(words)})")
    return words


def _clause(number: int, table: Table, words: Wording) -> Clause:
    table.only(_CLAUSE_KEYS)
    kind = _trait_kind(table)
    unit = _unit(table, kind)
    wording = table.choice("class", WORDING_CLASSES)
    target, low, high = (_in_kit_unit(table, key, unit, kind) for key in ("target", "low", "high"))
    low, high = _limits(table, wording, kind, (target, low, high), words)
    return Clause(
        number=number,
        trait=table.text("trait"),
        words=_few_words(table),
        wording=wording,
        target=target,
        low=low,
        high=high,
        reading=table.text("reading"),
        sex=table.choice("sex", SEXES, default="both"),
        section=table.text("section", default="not recorded"),
        evidence=table.choice("evidence", EVIDENCE),
        definition=table.text("definition"),
        note=table.text("note", default=""),
    )


def _trait_kind(table: Table) -> Kind:
    try:
        return trait(table.text("trait")).kind
    except DataFileError as fault:
        raise table.fault(
            "trait", fault.needed + "; " + fault.do, table.content["trait"]
        ) from fault


def _unit(table: Table, kind: Kind) -> str:
    unit = table.text("unit")
    if kind is Kind.RATIO:
        if unit not in {"1", "%", "percent"}:
            raise table.fault("unit", "'1' or 'percent' for a ratio", unit)
        return "dimensionless" if unit == "1" else "percent"
    return unit


def _in_kit_unit(table: Table, key: str, unit: str, kind: Kind) -> float | None:
    number = table.optional_number(key)
    if number is None:
        return None
    wanted = "dimensionless" if kind is Kind.RATIO else kind.unit
    try:
        return convert(number, unit, wanted)
    except KitError as fault:
        raise table.fault("unit", fault.needed, unit) from fault


def _limits(
    table: Table,
    wording: str,
    kind: Kind,
    printed: tuple[float | None, float | None, float | None],
    words: Wording,
) -> tuple[float | None, float | None]:
    """Turn the words into limits: printed numbers first, else the reading of the word."""
    target, low, high = printed
    if wording == "slightly" and (low is None) != (high is None):
        low, high = _slightly(low, high, words["slightly"])
    elif wording in {"exact", "about"} and low is None and high is None:
        if target is None:
            raise table.fault("target", f"a target, or limits, for '{wording}'", "nothing")
        low, high = _around(target, kind, words[wording])
    _check_limits(table, wording, low, high)
    _check_target(table, target, low, high)
    return low, high


def _check_target(
    table: Table, target: float | None, low: float | None, high: float | None
) -> None:
    if target is None:
        return
    if (low is not None and target < low) or (high is not None and target > high):
        raise table.fault("target", "a target inside the limits", target)


def _slightly(
    low: float | None, high: float | None, reach: Mapping[str, float]
) -> tuple[float, float]:
    if low is not None:
        return low * (1 + reach["from"]), low * (1 + reach["to"])
    assert high is not None  # noqa: S101  (the caller gives exactly one)
    return high * (1 - reach["to"]), high * (1 - reach["from"])


def _around(target: float, kind: Kind, width: Mapping[str, float]) -> tuple[float, float]:
    half = width[kind.value] if kind is Kind.ANGLE else width[kind.value] * abs(target)
    return target - half, target + half


def _check_limits(table: Table, wording: str, low: float | None, high: float | None) -> None:
    needed = {"at least": (low, "low"), "at most": (high, "high"), "range": (low, "low")}
    limit, key = needed.get(wording, (0.0, ""))
    if limit is None:
        raise table.fault(key, f"a number for '{wording}'", "nothing")
    if wording == "range" and high is None:
        raise table.fault("high", "a number for 'range'", "nothing")
    if low is not None and high is not None and not low < high:
        raise table.fault("low", f"less than high ({high:g})", low)
    if low is None and high is None:
        raise table.fault("low", "at least one limit", "nothing")
