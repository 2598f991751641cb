"""Building and measuring a club: sheets, steps, as-built, the shop's bias."""
