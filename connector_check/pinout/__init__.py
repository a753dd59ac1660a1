"""What a standard publishes about a connector: contacts, nets, roles, joints, and where to find it."""
