"""``carwright shop``: one thin command a verb, each loaded when it is called."""
