"""One module per step, in order; a step that has been released is never edited again."""
