"""The protected holding area by the ICAO construction, simplified: an illustration, never obstacle clearance."""
