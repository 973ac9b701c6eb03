"""Read a TOML file into a pydantic model; refuse it whole, naming every fault at file:line."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from station.errors import TextFileError
from station.tomlfiles.lines import Place, line_of, lines_of_toml

ModelT = TypeVar("ModelT", bound=BaseModel)


class StrictModel(BaseModel):
    """A table of a TOML file: unknown keys are faults, nothing changes after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def text_of_file(path: Path) -> str:
    """Return the text of a TOML file; raise TextFileError if it cannot be read."""
    try:
        return path.read_bytes().decode("utf-8")
    except FileNotFoundError:
        raise TextFileError(f"There is no file {path}.", "Check the path.") from None
    except UnicodeDecodeError as error:
        raise TextFileError(
            f"{path} is not UTF-8 text (byte {error.start}).", "Save it as UTF-8."
        ) from error
    except OSError as error:
        raise TextFileError(
            f"{path} cannot be read: {error.strerror}.", "Check the file and its permissions."
        ) from error


def no_further_faults(contents: Mapping[str, Any]) -> Iterator[tuple[Place, str]]:  # noqa: ARG001
    """Find nothing: for files whose tables do not depend on one another."""
    return iter(())


def model_from_toml(
    text: str,
    name: str,
    model: type[ModelT],
    further_faults: Callable[[Mapping[str, Any]], Iterator[tuple[Place, str]]] = no_further_faults,
) -> ModelT:
    """Return the checked contents of a TOML text.

    Parameters
    ----------
    text : str
        The TOML text.
    name : str
        How faults call the file, usually its path.
    model : type
        The pydantic model the file must fit.
    further_faults : callable
        Finds in the raw contents what no single table can see; reported with all the others.

    Raises
    ------
    TextFileError
        With one "file:line: sentence" per fault in `faults`.
    """
    try:
        contents = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        line = line_of_toml_error(error, text)
        raise refused(name, (f"{name}:{line}: not valid TOML: {error}",)) from error
    faults = list(further_faults(contents))
    try:
        checked = model.model_validate(contents)
    except ValidationError as error:
        faults += [(tuple(fault["loc"]), fault["msg"]) for fault in error.errors(include_url=False)]
    if faults:
        lines = lines_of_toml(text)
        found = {(line_of(lines, place), sentence(place, what)) for place, what in faults}
        raise refused(name, tuple(f"{name}:{line}: {what}" for line, what in sorted(found)))
    return checked


def line_of_toml_error(error: tomllib.TOMLDecodeError, text: str) -> int:
    """Return the line a TOML syntax error speaks of, or the last one."""
    words = str(error).rpartition("(at line ")[2].partition(",")[0]
    return int(words) if words.isdigit() else text.count("\n") + 1


def sentence(place: tuple[int | str, ...], message: str) -> str:
    """Return what is wrong at a place, as one line."""
    message = message.removeprefix("Value error, ").removeprefix("Assertion failed, ")
    dotted = ".".join(str(part) for part in place)
    return f"{dotted}: {message}" if dotted else message


def refused(name: str, faults: tuple[str, ...]) -> TextFileError:
    """Return the refusal of a file with all its faults."""
    count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    listing = "\n".join(f"  {fault}" for fault in faults)
    return TextFileError(f"{name} has {count}:\n{listing}\n", "Mend them and try again.", faults)
