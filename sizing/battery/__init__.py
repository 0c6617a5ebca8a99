"""The battery bank: chemistry, chargers, cold, charge profiles, pre-charge."""
