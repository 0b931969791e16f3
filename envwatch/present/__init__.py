"""Results to words, paper, charts. No arithmetic beyond formatting."""
