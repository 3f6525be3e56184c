"""Light as it leaves lamps and sky: spectra, photometry, sources."""
