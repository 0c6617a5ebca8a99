"""What steps and sheets say, as it is shown: translated, and with the shop's own wording; never stored."""
