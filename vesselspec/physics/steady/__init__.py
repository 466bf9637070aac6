"""The steady state: every core of every condition, AC and DC, coupled through converters."""
