"""The month-end statement, and the trend over months."""
