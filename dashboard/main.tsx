import { render } from 'preact';
import { App } from './app.tsx';
import { keepLive } from './live.ts';
import { followHash } from './route.ts';
import { followTheme } from './theme.ts';
import './style.css';

followTheme();
followHash();
keepLive();
render(<App />, document.querySelector('#page')!);
