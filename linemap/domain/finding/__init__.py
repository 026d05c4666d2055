"""Findings: what a person should know, by code, place and values; sentences are made when somebody looks."""
