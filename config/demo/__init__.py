"""Fills the invented shop: a job at every stage, made by the services a person would use."""
