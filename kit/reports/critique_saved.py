"""A critique as it goes into the records: its words, its marks, and the standard."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict

from kit import __version__
from kit.records.entries import SavedCritique, critique_hash
from kit.reports.critique import Critique
from kit.reports.critique_edit import as_record, as_text
from kit.standards.standard import Standard


def critique_to_save(
    critique: Critique, standard: Standard | None, author: str = "", readings_hash: str = ""
) -> SavedCritique:
    """Return what is kept of a critique, as it was written or edited.

    Parameters
    ----------
    readings_hash : str
        SHA-256 over the readings that counted, where they are in the records.
    """
    text = as_text(critique)
    marks = json.dumps(as_record(critique), ensure_ascii=False, indent=1) + "\n"
    return SavedCritique(
        critique.dog, critique.written, author, critique.form,
        standard.key if standard else "", critique.version,
        standard_hash(standard) if standard else "", __version__, readings_hash,
        text, marks, critique_hash(text, marks),
    )  # fmt: skip


def standard_hash(standard: Standard) -> str:
    """Return a SHA-256 over everything a standard asks, whatever its file is called."""
    content = json.dumps(asdict(standard), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(content.encode()).hexdigest()
