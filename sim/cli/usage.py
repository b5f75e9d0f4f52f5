"""The words of a command line: what may be written there, and what to say when it is not.

The parser's own errors show its usage line in a box and speak of values and types; here each is
one sentence with the option, what was found and what would be right.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable
from typing import Any

from typer.core import TyperCommand

from sim.errors import Fault, NightledgerError, as_typed, join_or, printable, shown

PROGRAM = "nightledger"


class UsageFault(NightledgerError):
    """A command line that cannot be followed."""


class Command(TyperCommand):
    """A command whose help and errors are for people who write no programs."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        # What is too much is said below, in our words.
        ctx.allow_extra_args = True
        try:
            rest = super().parse_args(ctx, args)
        except Exception as error:
            raise as_fault(error, self, ctx) from None
        if rest and not ctx.resilient_parsing:
            hint = "what has a blank in it goes into quotes"
            raise UsageFault(f"{shown(rest[0])} is too much for {_usage(self, ctx)}; {hint}")
        # Names and places are read as they were typed; a file's name is what the system calls it.
        ctx.params = {name: _values_as_typed(value) for name, value in ctx.params.items()}
        return rest

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        return [re.sub(r"[{}]|\.\.\.", "", piece) for piece in super().collect_usage_pieces(ctx)]

    def format_options(self, ctx: Any, formatter: Any) -> None:
        for heading, kind in (("Arguments", "argument"), ("Options", "option")):
            rows = [
                # An argument's type says nothing that its line does not.
                (re.sub(r"( <.*>)$", "", record[0]), record[1].replace("  [required]", ""))
                for param in self.get_params(ctx)
                if param.param_type_name == kind and (record := param.get_help_record(ctx))
            ]
            if rows:
                with formatter.section(heading):
                    formatter.write_dl(rows)


def whole_number(option: str, least: int, most: int | None = None) -> Callable[[Any], int]:
    """A parser of an option that takes a whole number between bounds, or from one on.

    Raises
    ------
    UsageFault
        No whole number, or one out of bounds.
    """

    def parse(value: Any) -> int:
        text = str(value).strip()
        # Ten digits are more than any bound, and few enough to be read.
        number = int(text) if re.fullmatch(r"[-+]?[0-9]{1,10}", text) else None
        if number is None or number < least or (most is not None and number > most):
            bounds = f", {least} or more" if most is None else f" from {least} to {most:,}"
            rule = f"must be a whole number{bounds}"
            raise UsageFault(Fault(rule, key=option, value=_typed(text)))
        return number

    return parse


def one_of(option: str, words: Iterable[str]) -> Callable[[Any], str]:
    """A parser of an option that takes one of a few words.

    Raises
    ------
    UsageFault
    """
    known = tuple(words)

    def parse(value: Any) -> str:
        text = str(value).strip().lower()
        if text not in known:
            rule = f"must be {join_or(known)}"
            raise UsageFault(Fault(rule, key=option, value=str(value)))
        return text

    return parse


def no_such_command(name: str, known: Iterable[str]) -> UsageFault:
    """That there is no such command, with those it may be."""
    near = difflib.get_close_matches(name.lower(), list(known), 2)
    meant = f"; did you mean {join_or(near)}?" if near else f"; {PROGRAM} --help lists them all"
    return UsageFault(f"there is no command {shown(name)}{meant}")


def _values_as_typed(value: Any) -> Any:
    if isinstance(value, str):
        return as_typed(value)
    return [_values_as_typed(x) for x in value] if isinstance(value, list) else value


def _typed(text: str) -> Any:
    """A number as it was typed, without quotes; anything else as text."""
    return int(text) if re.fullmatch(r"[-+]?[0-9]{1,18}", text) else text


def as_fault(error: Exception, command: Any, ctx: Any) -> Exception:
    """An error of the parser as one of ours; any other as it is, a call for help too."""
    if not hasattr(error, "format_message") or type(error).__name__ == "NoArgsIsHelpError":
        return error
    return UsageFault(_sentence(error, command, ctx))


def _sentence(error: Any, command: Any, ctx: Any) -> str:
    """What an error of the parser means for whoever typed the line."""
    if hasattr(error, "param_type"):
        return f"{error.param.display_name_raw} is missing; write: {_usage(command, ctx)}"
    option = getattr(error, "option_name", None)
    if option is None:
        return printable(f"{error.message.rstrip('.')}: {_usage(command, ctx)}", 300)
    if hasattr(error, "possibilities"):
        near = join_or(sorted(error.possibilities or ()))
        found = f"there is no option {printable(option, 60)} of {_called(ctx)}"
        return f"{found}; {f'did you mean {near}?' if near else f'see: {_called(ctx)} --help'}"
    given = next(x for x in command.get_params(ctx) if option in x.opts)
    if getattr(given, "is_flag", False):
        return f"{option} takes no value: write it alone"
    return f"{option} needs a value behind it: {option} {given.metavar}"


def _usage(command: Any, ctx: Any) -> str:
    """``nightledger trip JOB``."""
    return " ".join([_called(ctx), *command.collect_usage_pieces(ctx)[1:]])


def _called(ctx: Any) -> str:
    """``nightledger trip``, whatever the program was started as."""
    return PROGRAM if ctx.parent is None else f"{PROGRAM} {ctx.info_name}"
