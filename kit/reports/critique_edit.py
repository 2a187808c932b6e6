"""A critique as text a person may change before it is saved, and what became of each sentence.

One sentence a line, its mark in brackets before it. A changed sentence keeps its figures and is
marked as edited; a line that is deleted is recorded as left out; a line ``[+] ...`` adds a sentence
that rests on no figure and is marked so.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from kit import __version__
from kit.quantities.errors import DataFileError
from kit.reports.critique import ADDED, Critique, Paragraph, Part, Piece, Sentence

MAXIMUM_CHARACTERS = 200_000
_LINE = re.compile(r"\[(s\d+|\+)\]\s*(.*)")
_MARK = re.compile(r"# text ([0-9a-f]{8})")
HOW = (
    "Change the wording after a mark such as [s3]; the sentence keeps its figures and is marked as",
    "edited. Delete a line to leave a sentence out. A line that begins with [+] adds one of your",
    "own under the heading above it; it rests on no figure, and says so. Leave the marks as they",
    "are.",
)


def as_text(critique: Critique) -> str:
    """Return a critique as text to be changed."""
    lines = [f"# {critique.dog} · {critique.standard or 'no standard'} · {critique.form} form",
             f"# text {critique.fingerprint}", *(f"# {line}" for line in HOW), ""]  # fmt: skip
    for part in critique.parts:
        lines += [f"## {part.title}", ""] if part.title else []
        for paragraph in part.paragraphs:
            lines += [f"### {paragraph.heading}"] if paragraph.heading else []
            lines += [f"[{'+' if s.id.startswith('e') else s.id}] {s.text}"
                      for s in paragraph.sentences]  # fmt: skip
            lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def edited(critique: Critique, text: str) -> Critique:
    """Return the critique as a person left its text.

    Parameters
    ----------
    critique : Critique
        As the kit wrote it.
    text : str
        What `as_text` gave, changed.

    Raises
    ------
    DataFileError
        If the text belongs to another critique, or a mark is unknown or stands twice.
    """
    _check(critique, text)
    found, added = _read(critique, text)
    parts = tuple(_part(part, found, added) for part in critique.parts)
    gone = tuple(s.text for s in critique.sentences if s.id not in found)
    return replace(critique, parts=parts, left_out=gone)


def _check(critique: Critique, text: str) -> None:
    if len(text) > MAXIMUM_CHARACTERS:
        raise DataFileError("the text of the critique is too long",
                            f"at most {MAXIMUM_CHARACTERS} characters", str(len(text)))  # fmt: skip
    mark = _MARK.search(text)
    if mark is None or mark[1] != critique.fingerprint:
        raise DataFileError(
            f"this text was not written from these readings of {critique.dog}",
            f"the line '# text {critique.fingerprint}'", mark[0] if mark else "no such line",
            "write the critique anew and carry your changes over",
        )  # fmt: skip


def _read(critique: Critique, text: str) -> tuple[dict[str, str], dict[str, list[str]]]:
    """Return the sentences by mark, and the added ones by the mark they follow."""
    known = {sentence.id for sentence in critique.sentences}
    found: dict[str, str] = {}
    added: dict[str, list[str]] = {}
    last, after = _first_of_parts(critique), ""
    for number, line in enumerate(text.splitlines(), start=1):
        if line.startswith("#") or not line.strip():
            after = last.get(line.lstrip("# ").strip(), after)
            continue
        match = _LINE.fullmatch(line.strip())
        if match is None:
            raise _fault(number, "a mark such as [s3] or [+] first", line)
        mark, said = match[1], match[2].strip()
        if mark == "+":
            added.setdefault(after or critique.sentences[0].id, []).append(said)
            continue
        if mark not in known or mark in found:
            raise _fault(number, "each mark of the text once", f"[{mark}]")
        after = mark
        if said:
            found[mark] = said
    return found, added


def _first_of_parts(critique: Critique) -> dict[str, str]:
    return {part.title: part.paragraphs[0].sentences[0].id for part in critique.parts
            if part.title and part.paragraphs and part.paragraphs[0].sentences}  # fmt: skip


def _fault(number: int, needed: str, given: str) -> DataFileError:
    return DataFileError(f"line {number} of the critique's text cannot be read", needed,
                         given[:80], "correct the line")  # fmt: skip


def _part(part: Part, found: dict[str, str], added: dict[str, list[str]]) -> Part:
    paragraphs = (Paragraph(p.heading, tuple(_sentences(p, found, added))) for p in part.paragraphs)
    return replace(part, paragraphs=tuple(p for p in paragraphs if p.sentences))


def _sentences(
    paragraph: Paragraph, found: dict[str, str], added: dict[str, list[str]]
) -> Iterator[Sentence]:
    for sentence in paragraph.sentences:
        if sentence.id in found:
            yield _sentence(sentence, found[sentence.id])
        for number, said in enumerate(added.get(sentence.id, []), start=1):
            yield Sentence(f"e{sentence.id[1:]}-{number}", (Piece(said),), ADDED)


def _sentence(sentence: Sentence, said: str) -> Sentence:
    if said == sentence.text:
        return sentence
    return Sentence(sentence.id, (Piece(said, sentence.rests_on),), sentence.text)


def as_record(critique: Critique) -> dict[str, object]:
    """Return a critique as a JSON document: dated, with the standard's version and every link."""
    return {
        "dog": critique.dog,
        "form": critique.form,
        "written": critique.written,
        "standard": critique.standard,
        "standard_version": critique.version,
        "kit_version": __version__,
        "sentences": [
            {
                "id": sentence.id,
                "part": part.key,
                "heading": paragraph.heading,
                "text": sentence.text,
                "rests_on": list(sentence.rests_on),
                "edited": sentence.edited,
                "original": "" if sentence.original == ADDED else sentence.original,
            }
            for part in critique.parts
            for paragraph in part.paragraphs
            for sentence in paragraph.sentences
        ],
        "left_out": list(critique.left_out),
        "evidence": [
            {"id": one.key, "number": critique.numbers[one.key], "kind": one.kind,
             "about": one.label, "text": one.text}
            for one in critique.evidence
        ],
    }  # fmt: skip


def save_text(critique: Critique, path: Path) -> Path:
    """Write the text to be changed; return the file."""
    return _save(path, as_text(critique))


def save_record(critique: Critique, path: Path) -> Path:
    """Write the JSON document; return the file."""
    return _save(path, json.dumps(as_record(critique), ensure_ascii=False, indent=1) + "\n")


def _save(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path
