"""The field page: crews, cards, packs by mile, and holds."""
