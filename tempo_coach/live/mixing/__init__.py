"""Mixing: music, clicks and spoken words to samples, before the take begins."""
