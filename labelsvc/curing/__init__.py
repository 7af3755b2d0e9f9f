"""Curing mathematics: what goes into the meat, what the law allows, what to weigh out, and two estimates (drying, water)."""
