"""Points and tables for staking out."""
