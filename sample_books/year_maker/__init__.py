"""The simulated year of the invented plant: true metal on a floor, and the papers people would write of it."""
