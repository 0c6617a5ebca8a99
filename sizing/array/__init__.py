"""Modules and strings: cold and hot voltages, charge controllers, PWM."""
