"""What puts stimuli on the wires and keeps them there: a bus adapter, a supply, a person."""
