"""The pictures of the pages: drawn in memory, written as SVG, lettered and coloured by the page."""
