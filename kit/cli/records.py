"""`conformation records`: import, export, backup, restore, owner, check."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from kit.quantities.errors import DataFileError
from kit.records.backup import back_up, restore
from kit.records.checking import Checked, check_store
from kit.records.connection import file_of, locate
from kit.records.exchange import Imported, export_csv
from kit.records.folder import export_folder, import_file, import_folder
from kit.records.package import export_package
from kit.records.store import Store, open_store
from kit.records.values import Owner, Ownership, check_since
from kit.standards.standard import load_standard

SOUND, UNSOUND = 0, 2


def run(options: argparse.Namespace) -> int:
    """Run one action; see `conformation records --help`."""
    if options.action == "restore":
        return _restore(options)
    if options.action == "export" and options.with_owners and not options.package:
        raise DataFileError("a CSV of readings names no owners", "--package beside --with-owners")
    _refuse_missing(options)
    with open_store(options.database) as store:
        return _ACTIONS[options.action](store, options)


def _refuse_missing(options: argparse.Namespace) -> None:
    """Only an import may begin new records, and only of something that is there."""
    if options.action == "import" and not Path(options.file).exists():
        raise DataFileError(f"there is no file {options.file}", "a CSV file, or a folder of them",
                            do="check the name")  # fmt: skip
    path = file_of(locate(options.database))
    if options.action != "import" and path is not None and not path.exists():
        raise DataFileError(f"there are no records at {path}", "a records file",
                            do="check --database, or import readings first")  # fmt: skip


def _import(store: Store, options: argparse.Namespace) -> int:
    path = Path(options.file)
    clauses = load_standard(options.standard).points if options.standard else ()
    taken = import_folder(store, path, clauses) if path.is_dir() else None
    taken = taken or (import_file(store, path, clauses),)
    for name, done in taken:
        _say_taken(name, done)
    _say(f"Records: {store.where}")
    if not any(done.added + done.present for _, done in taken) and any(
        done.problems for _, done in taken
    ):
        what = "row" if path.is_dir() else taken[0][0].removesuffix("s")
        raise DataFileError(f"no usable {what} in {options.file}", do="see the rows above")
    return SOUND


def _say_taken(name: str, done: Imported) -> None:
    for problem in (*done.untold, *done.problems):
        print(problem, file=sys.stderr)  # noqa: T201
    _say(f"{done.added} {name} added, {done.present} were there already, "
         f"{len(done.problems)} left out")  # fmt: skip
    more = f", dogs now known better: {done.completed}" if done.completed else ""
    _say(f"New dogs: {done.dogs}{more}, new sessions: {done.sessions}")
    if done.untold:
        _say(f"Left out of what is told of dogs, sessions and owners: {len(done.untold)}")
    if done.owners:
        _say(f"Owners: {done.owners} added; names and addresses stay apart from the readings.")
    if done.present and name == "readings":
        _say("Rows are taken for the same if every column is; give time or stand to tell repeats.")


def _export(store: Store, options: argparse.Namespace) -> int:
    dog = store.find_dog(options.dog).id if options.dog else None
    out = Path(options.out)
    if not options.package and (out.is_dir() or options.out.endswith(("/", os.sep))):
        _say_files(_into_folder(store, out, dog, force=options.force))
        return SOUND
    if not options.package:
        rows = export_csv(store, out, dog, force=options.force)
        _say(f"{rows} rows, whole history: {out}")
        beside = sum(len(book.all(dog, history=True)) for book in store.books)
        if beside:
            _say(f"{beside} rows of grades, movement and critiques are not in it: export to a "
                 "folder (DIR/) or --package")  # fmt: skip
        return SOUND
    files = export_package(store, out, dog, with_owners=options.with_owners, force=options.force)
    _say_files(files)
    if options.with_owners:
        _say("Owners' names and addresses are in it: pass it on with care.")
    return SOUND


def _into_folder(store: Store, folder: Path, dog: str | None, *, force: bool) -> tuple[Path, ...]:
    try:
        folder.mkdir(exist_ok=True)
    except OSError as fault:
        raise DataFileError(f"cannot make {folder}", "a folder", str(fault.strerror)) from fault
    return export_folder(store, folder, dog, force=force)


def _say_files(files: Sequence[Path]) -> None:
    _say("\n".join(str(file) for file in files))


def _backup(store: Store, options: argparse.Namespace) -> int:
    rows = back_up(store, Path(options.file))
    _say(f"{rows} rows backed up and read back: {options.file}")
    _say("It is a whole copy, owners included.")
    return SOUND


def _owner(store: Store, options: argparse.Namespace) -> int:
    """Note a new owner of a dog, or show who it belongs to and belonged to."""
    dog = store.find_dog(options.dog)
    if options.name:
        since = check_since(options.since)  # before anything is stored
        owner = _same_owner(store, options) or store.add_owner(
            options.name, options.address, options.contact
        )
        if Ownership(dog.id, owner.id, since) not in store.ownership():
            store.set_owner(dog.id, owner.id, since)
    owners = {owner.id: owner for owner in store.owners()}
    links = [link for link in store.ownership() if link.dog == dog.id]
    if not links:
        _say(f"{dog.name}: no owner is noted")
    for link in links:
        known = owners[link.owner]
        since = f"since {link.since}" if link.since else "since when is not known"
        _say(", ".join(filter(None, (f"{dog.name}: {known.name}", known.address, known.contact,
                                     since))))  # fmt: skip
    return SOUND


def _same_owner(store: Store, options: argparse.Namespace) -> Owner | None:
    """Return the owner of this very name, address and contact, if the records know one."""
    told = (options.name, options.address, options.contact)
    alike = (one for one in store.owners() if (one.name, one.address, one.contact) == told)
    return next(alike, None)


def _check(store: Store, _options: argparse.Namespace) -> int:
    found = check_store(store)
    for problem in found.problems:
        print(problem, file=sys.stderr)  # noqa: T201
    _say(f"{store.where}: schema version {found.version}, {found.dogs} dogs, "
         f"{found.sessions} sessions, {found.counting} readings in {found.rows} rows, "
         f"{found.snapshots} snapshots, {_beside(found)}; "
         + (f"{len(found.problems)} problems" if found.problems else "nothing wrong"))  # fmt: skip
    return UNSOUND if found.problems else SOUND


def _beside(found: Checked) -> str:
    """Count what is recorded beside readings."""
    return ", ".join(f"{name}: {counting} in {rows} rows" for name, rows, counting in found.entries)


def _restore(options: argparse.Namespace) -> int:
    target = file_of(locate(options.database))
    if target is None:
        raise DataFileError("a backup goes into a file", "a path", str(options.database))
    done = restore(target, Path(options.file), force=options.force)
    _say(f"{done.rows} rows restored: {target}")
    if done.dropped:
        _say(f"{done.dropped} rows of the old file are not in it.")
    if done.aside is not None:
        _say(f"The old file is kept: {done.aside}")
    return SOUND


def _say(text: str) -> None:
    print(text)  # noqa: T201


_ACTIONS = {"import": _import, "export": _export, "backup": _backup, "owner": _owner,
            "check": _check}  # fmt: skip
