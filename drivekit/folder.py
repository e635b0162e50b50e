"""The folder a study writes: every file whole at once, and a set mixed by a crash told apart.

All files are first written beside their places under another name and brought to the disk; then each is renamed into
its place, `findings.json` last, with the SHA-256 of all the others in it. Before the first rename a notice is laid in
the folder, after the last it is taken away. So a study that is stopped, even by a power cut, leaves the old set whole,
or the new one, or, within the few moments of renaming, a mixed one that the hashes give away and the notice tells of.
Files that the study does not name are never touched.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from errno import EINVAL, EISDIR
from hashlib import sha256
from io import StringIO
from itertools import count
from pathlib import Path
from shutil import copymode
from tempfile import TemporaryFile
from typing import Any, Literal

from drivekit.faults import Unusable, writing

__all__ = [
    "FINDINGS",
    "alone",
    "earlier_findings",
    "kept",
    "standing",
    "try_folder",
    "unmade",
    "write_files",
    "write_folder",
]

FINDINGS = "findings.json"
NOTICE = "MIXED-FILES.txt"
STAGED = ".drivekit-new"

NOTICE_TEXT = (
    "A study is replacing the files in this folder. If none is running now, one was stopped half-way: files of two\n"
    "studies may stand side by side here. Run the study again; it writes all of them anew and removes this notice.\n"
)


@dataclass(frozen=True, slots=True)
class Standing:
    """What a folder of findings holds."""

    kind: Literal["absent", "whole", "mixed"]  # none; one study's set; of more than one, or changed by hand
    named: tuple[str, ...] = ()  # the files that its `findings.json` names
    strange: tuple[str, ...] = ()  # those missing or not as they were written

    def __str__(self) -> str:
        why = f": a study was stopped while it wrote, or a file was changed by hand ({', '.join(self.strange)})"
        return f"the findings here are {self.kind}{why if self.strange else ''}"


def standing(folder: Path) -> Standing:
    """Tell by the SHA-256 of every file that `findings.json` names whether a folder holds one study's findings, whole.

    Raises
    ------
    OSError
        If a folder stands in its place, or what no study wrote.
    """
    try:
        if (folder / FINDINGS).is_dir():
            raise IsADirectoryError(EISDIR, "a folder stands where a file is to be written", str(folder / FINDINGS))
        written = json.loads((folder / FINDINGS).read_bytes())["provenance"]["files"]
        hashes = {str(name): str(value) for name, value in written.items()}
    except (FileNotFoundError, NotADirectoryError):
        # The first study into a folder was stopped before its last file.
        return Standing("mixed", strange=(FINDINGS,)) if (folder / NOTICE).exists() else Standing("absent")
    except RecursionError:
        deep = "what stands there is nested deeper than any study writes: move it away"
        raise OSError(EINVAL, deep, str(folder / FINDINGS)) from None
    except (ValueError, LookupError, TypeError, AttributeError):
        return Standing("mixed", strange=(FINDINGS,))
    strange = list(hashes)
    for name, value in hashes.items():
        with suppress(OSError):
            if sha256((folder / name).read_bytes()).hexdigest() == value:
                strange.remove(name)
    return Standing("mixed" if strange else "whole", tuple(hashes), tuple(strange))


def earlier_findings(folder: Path, schema: str) -> dict[str, Any]:
    """Read the findings of an earlier study, of a version of their shape, where it has written them.

    Raises
    ------
    Unusable
        If no whole set of findings stands there, or one of another shape than this drivekit writes.
    """
    try:
        stands = standing(folder)
    except OSError as trouble:
        raise Unusable(f"{trouble.filename} cannot be read: {trouble.strerror}") from trouble
    if stands.kind == "absent":
        raise Unusable(f"{folder} holds no findings of a study; name a folder that does, or leave --since out")
    if stands.kind == "mixed":
        raise Unusable(f"{folder}: {stands}; what moved since cannot be told from them")
    found: dict[str, Any] = json.loads((folder / FINDINGS).read_bytes())
    if found.get("schema") != schema:
        raise Unusable(f"{folder / FINDINGS} is of the shape {found.get('schema')}, and {schema} is read here")
    return found


def try_folder(folder: Path) -> None:
    """Try whether a folder can be written, before anything is computed for it; it is left as it was found.

    Raises
    ------
    OSError
        When it cannot.
    """
    standing(folder)
    with unmade((folder, *folder.parents)) as made, alone(folder):
        with TemporaryFile(dir=folder):
            pass
        # still alone, for a folder that is taken away must not be the one that another study waits to write into
        _taken_away(made)


@contextmanager
def unmade(folders: Iterable[Path]) -> Iterator[Sequence[Path]]:
    """Give those of some folders that are not there, the innermost first; if what is done then fails, they go again."""
    made = sorted((place for place in folders if not place.exists()), key=lambda place: -len(place.parts))
    try:
        yield made
    except BaseException:
        _taken_away(made)
        raise


def _taken_away(folders: Iterable[Path]) -> None:
    """Take folders away that hold nothing; one that holds a file by now stays."""
    for folder in folders:
        with suppress(OSError):
            folder.rmdir()


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Make a folder and keep a second study out of it until this one is done: it waits, and one killed lets go."""
    if os.name == "nt":  # there a directory cannot be opened
        folder.mkdir(parents=True, exist_ok=True)
        yield
        return
    while (descriptor := _held(folder)) is None:
        pass
    try:
        yield
    finally:
        os.close(descriptor)


def _held(folder: Path) -> int | None:
    """Wait for a folder and hold it; None where it was taken away meanwhile, by a study that only tried it."""
    from fcntl import LOCK_EX, flock

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        if folder.is_file() or folder.is_symlink():
            raise
        return None
    with suppress(FileNotFoundError):
        descriptor = os.open(folder, os.O_RDONLY)
        with suppress(FileNotFoundError):
            flock(descriptor, LOCK_EX)
            if os.path.samestat(os.fstat(descriptor), folder.stat()):
                return descriptor
        os.close(descriptor)
    return None


def write_folder(folder: Path, findings: Mapping[str, Any], files: Mapping[str, bytes]) -> tuple[str, ...]:
    """Write a study's files into a folder, made if it is not there, each whole at once and `findings.json` last.

    The other files go by their path within it with forward slashes; the ``provenance.files`` of the findings is filled
    in here. Given back are files of an earlier study that this one does not draw and that still stand there.

    Raises
    ------
    OSError
        When the folder cannot be written; until then nothing in it has been replaced.
    """
    contents = {**files, FINDINGS: _findings_text(findings, files).encode()}
    with alone(folder):
        earlier = standing(folder).named
        write_files(folder, contents, notice=NOTICE_TEXT)
        (folder / NOTICE).unlink()
    return tuple(name for name in earlier if name not in contents and (folder / name).exists())


def write_files(folder: Path, files: Mapping[str, bytes], *, notice: str = "") -> None:
    """Write files into a folder, each whole at once: all are on the disk under another name before one is renamed.

    The folder is made if it is not there. They go by their path within it with forward slashes, and are renamed into
    place in this order. A notice, if there is one, is laid there as `NOTICE` before the first rename, for the caller to
    take away.

    Raises
    ------
    OSError
        When the folder cannot be written; until then nothing in it has been replaced.
    """
    with unmade({place for name in files for place in (folder / name).parents}):
        try:
            for name, content in files.items():
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                _to_disk(_staged(folder / name), content)
            if notice:
                _to_disk(folder / NOTICE, notice.encode())
            for name in files:
                with suppress(FileNotFoundError):
                    copymode(folder / name, _staged(folder / name))
                os.replace(_staged(folder / name), folder / name)
        except BaseException as trouble:
            for name in files:
                if isinstance(trouble, OSError) and trouble.filename == str(_staged(folder / name)):
                    trouble.filename = str(folder / name)  # as the caller knows it
                with suppress(OSError):
                    _staged(folder / name).unlink(missing_ok=True)
            raise
    for place in sorted({(folder / name).parent for name in files}):
        _directory_to_disk(place)


def kept(stem: str, forms: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write a figure in some forms, by the ends of their files: all or none, and never over one kept before.

    They go into the folder ``kept`` of the findings that this folder's workbooks stand in, else of ``findings`` beside
    the workbooks' folder.

    Raises
    ------
    Unusable
        If they cannot be written.
    """
    above = Path.cwd().parent
    home = (above if (above / FINDINGS).is_file() else above / "findings") / "kept"
    taken = {place.stem for place in home.glob("*")}
    free = next(name for name in (f"{stem}-{number}" for number in count(1)) if name not in taken)
    files = {f"{free}.{form}": content for form, content in forms.items()}
    with writing(home):
        write_files(home, files)
    return tuple(home / name for name in files)


def _findings_text(findings: Mapping[str, Any], files: Mapping[str, bytes]) -> str:
    """Write findings as indented JSON, with the SHA-256 of the other files of the set, by their names, in them.

    A number that is not finite is refused. What travels with findings (``comparisons``, how the settings are spoken of,
    and ``since``, the findings of an earlier study) is no finding and stays out.
    """
    hashes = {name: sha256(content).hexdigest() for name, content in files.items()}
    found = {name: block for name, block in findings.items() if name not in ("comparisons", "since")}
    whole = {**found, "provenance": {**findings["provenance"], "files": hashes}}
    text = StringIO()  # json.dumps would hold every number's piece at once, five times what they come to
    json.dump(whole, text, indent=1, ensure_ascii=False, allow_nan=False)
    return text.getvalue() + "\n"


def _staged(place: Path) -> Path:
    return place.with_name(f".{place.name}{STAGED}")


def _to_disk(place: Path, content: bytes) -> None:
    with open(place, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _directory_to_disk(place: Path) -> None:
    if os.name == "nt":  # there a directory cannot be opened; the file system journals its renames
        return
    descriptor = os.open(place, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
