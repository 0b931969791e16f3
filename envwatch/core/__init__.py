"""What every room needs: errors, periods, quantities, the nouns; nothing of ours is imported here."""
