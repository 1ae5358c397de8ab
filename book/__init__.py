"""The static book: the lessons as web pages whose panels and exercises run in the reader's own browser."""
