"""What a hold is: its definition and file, the entry sectors, the exact circuit for a wind, thumb rules."""
