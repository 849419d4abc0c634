"""What the commands do when nothing is said: no switch is on that was not asked for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from typer.main import get_command

from analyser.cli import app


def switches(command: Any, path: str) -> Iterator[tuple[str, Any]]:
    """Yield every on-and-off option of a command and those within it, with the words that lead to it."""
    for one in command.params:
        if getattr(one, "is_flag", False) and one.name not in ("help", "version"):
            yield path, one
    if hasattr(command, "list_commands"):
        for name in command.list_commands(None):
            yield from switches(command.get_command(None, name), f"{path} {name}".strip())


def test_a_switch_is_off_unless_it_has_a_word_to_turn_it_off() -> None:
    found = list(switches(get_command(app), ""))
    assert len({path for path, _ in found}) > 15 and len(found) > 40
    for path, one in found:
        assert bool(one.default) == bool(one.secondary_opts), f"{path} {one.opts[0]}"
        assert all(word.startswith("--no-") for word in one.secondary_opts)
