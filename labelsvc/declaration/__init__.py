"""What a label must say: ingredients, allergens, quantities, nutrition, dates and the other particulars, as pure functions."""
