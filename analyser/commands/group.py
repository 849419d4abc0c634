"""The commands, loaded one by one as they are asked for; a log in place of a command is debriefed."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import Any

import typer
from typer.core import TyperGroup

#: What is done with a log that is named without a command.
USUAL = "debrief"
#: The commands in the order of their use, each with a line that fits a terminal of 80 columns. Each is a function of
#: the module of its name, or the commands of that module's ``app``.
LINES = {
    "debrief": "Find and judge the holds in logs; write a page for each.",
    "inspect": "Say what is in a log, before anything is judged.",
    "export": "Write the cleaned track for an earth viewer or a GIS.",
    "brief": "Work out a hold before flying it, on one card.",
    "picture": "Draw a picture to take away, for slides and reports.",
    "watch": "Debrief each new log of a folder as it is written.",
    "grade": "Put grades into the logbook.",
    "progress": "Show how a pilot, or everybody, is getting on; what to fly next.",
    "record": "Write a student's record, to read and to print.",
    "compare": "Compare a class, pilot by item.",
    "hold": "Write, correct and look at hold files.",
    "logbook": "See, put right, erase and exchange what is recorded.",
}
#: Modules of another name than their command.
_MODULES = {
    **dict.fromkeys(("inspect", "export", "picture"), "single_log"),
    **dict.fromkeys(("record", "compare"), "progress"),
}


class Commands(TyperGroup):
    """The commands of the program."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Return their names."""
        return list(LINES)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Load a command: building all of them for each log would cost as much as reading it."""
        if cmd_name in LINES and cmd_name not in self.commands:
            self.commands[cmd_name] = _loaded(cmd_name)
        return super().get_command(ctx, cmd_name)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Find the command; a file or folder in its place is debriefed."""
        word = args[0]
        if self.get_command(ctx, word) is None:
            if Path(word).exists():
                return super().resolve_command(ctx, [USUAL, *args])
            if _is_file_name(word):
                ctx.fail(
                    f"There is no file '{word}', and no such command. Check the path: analyser {USUAL} LOG"
                )
            # What is like the word can be named only of commands that are there.
            for name in LINES:
                self.get_command(ctx, name)
        return super().resolve_command(ctx, args)


def _loaded(name: str) -> Any:
    module = import_module(f"analyser.commands.{_MODULES.get(name, name)}")
    if hasattr(module, "app"):
        group = typer.main.get_command(module.app)
        group.short_help = LINES[name]
        return group
    alone = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
    alone.command(name, short_help=LINES[name])(getattr(module, name))
    return typer.main.get_command(alone)


def _is_file_name(word: str) -> bool:
    return bool(Path(word).suffix) or "/" in word or "\\" in word
