"""What a log holds, told before anything is judged: as text, and as a small plan of the track."""
