"""What the regimes and the test standards say: TOML data with a source beside each number, and its reader."""
