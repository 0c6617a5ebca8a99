"""Engine answers worked out beforehand, so that a tablet can judge without a network."""
