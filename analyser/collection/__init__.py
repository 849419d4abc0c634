"""The collection of hold files: found, chosen for a flight, made, checked and listed."""
