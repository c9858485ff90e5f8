import { render } from 'preact';
import { App } from './app.tsx';
import { keepLive } from './live.ts';
import { followHash } from './route.ts';
import './style.css';

followHash();
keepLive();
render(<App />, document.querySelector('#page')!);
