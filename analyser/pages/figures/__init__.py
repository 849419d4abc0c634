"""The pictures of the pages: drawn by matplotlib without axes, lettered and coloured by the page."""
