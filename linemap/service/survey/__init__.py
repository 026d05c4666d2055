"""Survey findings, decisions on their causes, red marks and staking."""
