"""Screens of practising: set-up, practice, the card afterwards, a new drill, a film; and all of it in lines."""
