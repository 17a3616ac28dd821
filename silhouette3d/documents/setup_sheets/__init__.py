"""Setup sheets for the operator."""
