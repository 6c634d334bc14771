"""What a car portrays and when: dated rules, dating of evidence, the life of its prototype, dimensions."""
