"""One log's whole way from file to page, and many logs' over cores or a cluster, with what an earlier run left."""
