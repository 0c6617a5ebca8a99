"""What comes out: year, wirings, findings, blame, moment, clock, maps, band, check."""
