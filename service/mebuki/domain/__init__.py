"""The words everybody shares: frozen, validated values without behaviour that acts."""
