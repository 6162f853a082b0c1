"""The record as EPCIS 2.0 events in JSON-LD (GS1 EPCIS and CBV 2.0, 2022); no schema, no file."""
