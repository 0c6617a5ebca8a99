"""Sets up a real installation: settings file, first shop and owner, the page that asks for them."""
