"""The place Fit-up: tip in bore, drawn to scale."""
