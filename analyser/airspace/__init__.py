"""The protected airspace of a hold, and how a flight stood inside it."""
