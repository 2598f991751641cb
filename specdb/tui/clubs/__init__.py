"""The place Clubs: fitted clubs in numbers, compared, entered."""
