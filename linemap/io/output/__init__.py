"""Writers of tables and vector layers."""
