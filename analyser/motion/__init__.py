"""What the aircraft did, measured from its track: ground velocity, wind, airspeed, heading, bank, with sigmas."""
