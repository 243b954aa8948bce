"""Heat conduction in a brick of constant properties: one basis along each edge, exact in time."""
