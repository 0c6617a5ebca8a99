"""Sun, clear sky, weather files and monthly climate as daylight samples."""
