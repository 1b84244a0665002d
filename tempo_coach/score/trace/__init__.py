"""Traces and throws: cycles, circles, lags, flights and boomerangs by themselves and beside a drill."""
