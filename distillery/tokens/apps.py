from django.apps import AppConfig


class TokensConfig(AppConfig):
    name = "distillery.tokens"
    label = "tokens"

    def ready(self) -> None:
        from distillery.tokens.guards import token_guards
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep

        keep("tokens.ConsumerToken")
        keep("tokens.TokenEnded")
        keep("tokens.TokenUsed", told=False)
        watch(token_guards, label="tokens")
