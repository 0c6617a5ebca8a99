"""The catalog, data sheets as engine input, and the circuits that chosen parts need."""
