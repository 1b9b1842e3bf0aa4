"""The bench: the web app beside the work. It shows what the machine folder and the build log say."""
