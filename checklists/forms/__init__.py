"""Forms for a step, an override, a deviation and a signature."""
