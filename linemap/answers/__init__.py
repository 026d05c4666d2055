"""What the service answers, typed once: shown by pages, phone, paper and OpenAPI; one file a noun."""
