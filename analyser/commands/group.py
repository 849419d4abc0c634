"""The first word of the command line: a command, or a log, which is debriefed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from typer.core import TyperGroup

#: What is done with a log that is named without a command.
USUAL = "debrief"


class Commands(TyperGroup):
    """The commands of the program."""

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
        return super().resolve_command(ctx, args)


def _is_file_name(word: str) -> bool:
    return bool(Path(word).suffix) or "/" in word or "\\" in word
