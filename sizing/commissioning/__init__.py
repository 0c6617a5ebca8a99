"""What a meter should read, insulation tests, and what differs as built."""
