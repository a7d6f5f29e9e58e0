"""What a shop keeps of its work: sessions at the bench, stock, kits."""
