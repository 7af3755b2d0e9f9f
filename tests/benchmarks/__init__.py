"""What is fast enough, measured as ratios side by side in one run; commands, not timed tests (see DEVELOPERS.md)."""
