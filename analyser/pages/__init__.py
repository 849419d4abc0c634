"""The debrief as a page: plots, templates, style and the small script."""
