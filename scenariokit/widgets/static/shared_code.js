export default (await fetched()).default;
